"""Program text in, verdict out: an independent reading that never sees the plan."""
