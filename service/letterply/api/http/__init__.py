"""What HTTP asks for: bodies, negotiation, problems, middleware, logs and metrics."""
