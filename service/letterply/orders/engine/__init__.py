"""Orders that survive: queues, workers that take over from each other, one answer."""
