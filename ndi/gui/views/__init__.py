"""Drawing and keys; knows widgets and what presenters hand over, never a service."""
