"""What pages of single things share. Rooms further out add to the pages of those further in, by registering.

history.py  what happened to a subject, newest first, merged from every app that knows something
panels.py   parts of a subject's page that another app draws
subject.py  what every page of one thing needs: facts, due work, panels, record buttons, history
site.py     parts of the page on which a refuge is set up
"""
