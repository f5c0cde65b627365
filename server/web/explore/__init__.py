"""The Explore page: any stretch at the desk, beside another one."""
