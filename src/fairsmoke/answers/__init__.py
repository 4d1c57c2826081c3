"""Each long question once: a request, its computation, one store of results, one job queue."""
