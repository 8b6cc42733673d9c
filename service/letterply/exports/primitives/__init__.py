"""What every export draws with: numbers, markup, colours, captions, text as outlines."""
