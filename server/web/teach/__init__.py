"""The pages that teach a dialect."""
