"""A labelled bench of the alert rules: station-years of simulated traffic with planted faults and planted things that
are none.
"""
