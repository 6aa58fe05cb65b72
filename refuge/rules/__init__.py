"""The rules engine: pure Python, imports no Django and no app.

facts.py     what a rule may know
triggers.py  what a rule answers: a due date with its reason, or what it lacks
limits.py    the numbers rules go by, their sources, and who overrode them
registry.py  the rules, by key
engine.py    facts + rules + limits + a day -> wanted tasks
"""
