"""What figures, links, incidents and cautions are called, and how they are said: one spelling for pages, PDF, notices
and the terminal.
"""
