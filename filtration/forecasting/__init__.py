"""The forecast in the program: from the records to a stored forecast, and from there to rules and pages.

records.py     the rows, a fixed number of queries for any number of waters
states.py      which filters ran when
sightings.py   water tests as readings with their uncertainty
meals.py       meals planned for the days ahead
known.py       what is known of one water
beginning.py   how it began
happenings.py  what happened and what is planned, hour by hour
gather.py      one water, ready to be forecast; `scenario_of` for whoever asks "what if"
run.py         its tests taken in, its next two weeks
"""
