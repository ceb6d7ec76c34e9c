"""The demo: an invented workshop with its history, and the whole job taken through once.

Every firm, engine, gearbox, car, person and number here is made up.
"""
