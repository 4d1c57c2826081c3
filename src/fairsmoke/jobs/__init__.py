"""What the command line and the app both do with a notebook: take in, judge, tell, demonstrate."""
