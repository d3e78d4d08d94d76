"""Blocks: weeks strung together so that each knows its neighbours, and back from what was really done."""
