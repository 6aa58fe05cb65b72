"""Hydraulics of an upflow filter: pump, pipes, void, media, overflow and return, and what happens when they fail.

Plain Python. Lengths and heads in m, flows in m3/h, velocities in m/s, masses in kg, temperatures in degrees
Celsius, time in days unless a name says otherwise. Head is metres of the water being pumped.
"""
