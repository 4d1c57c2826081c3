"""TLS on a kitchen's own network, where no public authority gives certificates."""
