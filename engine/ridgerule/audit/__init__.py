"""Compile rulebooks into a plan, hold a record against it, hand back findings."""
