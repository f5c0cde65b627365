"""The Sharing pages: who waits for whom, other timers, plans, before and after."""
