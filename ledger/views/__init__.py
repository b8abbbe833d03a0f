"""What people look at: tables, grids, workbooks, JSON."""
