"""Pictures: stacks, findings, sheets and proofs in, SVG text and PNG bytes out."""
