"""Alignment: what helps the layers to be glued up in register. All mm."""
