"""The six places of a darkroom, one module each: what a person does there, over store and clock."""
