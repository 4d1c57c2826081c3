"""A trial set up in a notebook: asked, laid out, registered, begun."""
