"""Jobs and findings as two flat files: reading them in from elsewhere, writing them out.

The way in: `reading` (a file, its header, its lines) -> `grouping` (one job at a time) -> `planning` (every
rule, against what the shop already knows) -> `writing` (rows, set-based). The way out: `loading`, then
`exporting`. Both meet in `records`; both ways and the documentation are made from the table of columns.
"""
