"""Parts as a whole: islands, crumbs, depth, room, and the webs between what is worked in."""
