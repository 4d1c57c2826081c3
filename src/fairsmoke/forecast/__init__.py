"""When will each piece be done, and how sure: the simulator fitted to a running cook."""
