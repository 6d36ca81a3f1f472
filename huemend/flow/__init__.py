"""The recipes: what a setup goes through, composed from the stages."""
