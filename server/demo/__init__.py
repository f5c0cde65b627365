"""The Brackenfell demo: a traffic simulator with known truth, and the writer that turns its world into real log
files.
"""
