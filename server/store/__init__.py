"""The store: tables, migrations, and every SQL statement. Functions take a connection and plain values."""
