"""Print the versions of everything that is installed, one a line: no hosts, no paths."""

from importlib.metadata import distributions

LEFT_OUT = {"obverse", "pip", "setuptools", "wheel"}

found = {d.metadata["Name"].lower().replace("_", "-"): d.version for d in distributions()}
print("# Versions this house was tested with; `make lock` writes this file.")
for name in sorted(found):
    if name not in LEFT_OUT:
        print(f"{name}=={found[name]}")
