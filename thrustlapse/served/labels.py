"""What the served page says beside the words of the view."""

EDITOR_LABELS = {
    "fetch": "Add a control",
    "fetch_help": "Begin to type its name, its key or what it means; take it with Enter.",
    "put_away": "remove",
    "undo": "Undo",
    "redo": "Redo",
    "keep": "Keep for comparison",
    "start_again": "Start again from the file",
    "write": "Write these values to the file",
    "write_up": "Make a write-up",
    "write_up_name": "folder of a write-up",
    "kept": "Kept for comparison",
    "kept_table": "Kept variants beside the present values: installed thrust at rest, then "
                  "level top speed.",
    "now": "now",
    "as_file": "as in the file",
    "take": "use",
    "drop": "drop",
    "variant": "variant {number}",
    "written": "written to {file}; comments and all else are as they were",
    "loaded": "read anew from {file}",
    "made": "write-up ready in {folder}",
    "open_it": "open it",
    "working": "making the write-up: some seconds",
    "lost": "the program behind this page does not answer; start it again. The last good curves "
            "are shown",
    "still": "The last good curves are shown.",
    "no_change": "nothing is changed yet",
    "changed": "changed",
}
"""Key -> text or template."""
