"""The nouns: brief, plan, catalogue, units, errors. No solver, no files, no clock."""
