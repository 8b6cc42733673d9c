"""The work of an order, task by task: lines, layouts, sheets, papers; each in a worker process."""
