"""Planning an upflow filter before it is built: what a design does, what is wrong with it, its parts and steps.

Plain Python on top of `filtration.hydraulics`. Sentences carry amounts as marks (see refuge.rules.words), so
that each reader sees them in their own units.
"""
