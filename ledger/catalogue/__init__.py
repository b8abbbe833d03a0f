"""What is kept: items, units and packs, sizes, parties."""
