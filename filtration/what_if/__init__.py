"""What if: a water as it is and as it would be, side by side, before anything is saved.

changes.py     what may be changed, each as a change of the facts and of the forecast (plain Python)
facts.py       loads and capacities of changed facts, worked out anew (plain Python)
signs.py       what facts tell of a change before any forecast: quarantines, no filter, a stop (plain Python)
compare.py     two forecasts in numbers (plain Python)
telling.py     two forecasts in words (plain Python)
drawing.py     two forecasts on the same axes, as shapes (plain Python)
ahead.py       the water as it is, gathered from its records; the change made; both looked at
forms.py       what people type; ready.py: links that fill it
shown.py       an outlook as its page shows it
prospects.py   what a newcomer would do to a water, for the page of an arrival; arrivals.py registers it
"""
