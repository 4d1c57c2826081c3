"""What stands between the network and the app: hosts, limits, headers, forged forms."""
