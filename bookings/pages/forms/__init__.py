"""What people type, read into plain values. Rules are not judged here: the operations do that."""
