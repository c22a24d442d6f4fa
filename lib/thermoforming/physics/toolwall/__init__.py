"""The tool wall under load: plates, ribs, loads, strength when warm, finite elements, search."""
