"""The HTTP service.

In: HTTP requests. Out: documents, files and problems. A route reads a request, calls one function
of a room below, and returns what it got; no geometry, SQL or choice of status is made here twice.
"""
