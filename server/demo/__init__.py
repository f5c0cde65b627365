"""The Brackenfell demo: a traffic simulator with known truth, and the writer that turns its world into real log
files.

What is planted, and where a keeper finds it (`truth.json` beside the logs has the instants; server.demo.incidents):

- the host stopped and started again: Intake;
- a fault of the antenna and its repair, ten days later: Reception, two changes of 12 dB;
- a network that could not be reached for hours, and short losses: Links;
- a station that bought a new radio: nowhere, as it is no change of the repeater's;
- a power cut: Intake, alerts that a log has gone silent;
- a source of noise that runs at night, for three weeks: Reception, more errors only between 22:00 and 05:00;
- bursts that open the receiver for a week: alerts of short keyings;
- a transmitter that is stuck for hours: Transmitter, an over that runs on.
"""
