"""Feature kinds: what the `features` of a layer mean, worked onto its draft. All mm."""
