"""The HTTP service. Routes read a request, call one function, return a document."""
