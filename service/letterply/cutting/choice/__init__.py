"""Which of the cutters in the rack do a piece of work: what each takes, and what it leaves."""
