"""What figures, links and incidents are called, and how they are said: one spelling for pages, PDF, notices and the terminal."""
