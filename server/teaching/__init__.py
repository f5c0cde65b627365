"""What the pages that teach a dialect rest on: lessons on logs, and what the unread lines of followed logs may be. What
learns runs in a process of its own (server.bounded).
"""
