"""Who may do what: people, how they sign in, what they prefer; devices and their tokens."""
