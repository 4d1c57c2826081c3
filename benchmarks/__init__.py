"""Speed and memory, measured in one run and shown beside a yardstick of the same machine."""
