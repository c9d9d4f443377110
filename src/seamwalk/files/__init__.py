"""The files of seamwalk: top.json and plan.json."""
