"""Reports: what a shop's answers are, and the pages, workbooks and files that show them."""
