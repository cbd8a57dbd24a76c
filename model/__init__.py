"""The frame and its mechanics. Knows no file format and imports nothing above it.

What a script or a notebook needs comes straight from here, loaded when it is first asked for::

    from droptrail.model import lay_out, load_cases, mesh, solve

    layout = lay_out(bicycle)
    results = solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, ["seated", "side_push"]))
    results["side_push"].stiffness["head_sideways"]  # N/mm

Everything else is imported from the module it lives in, as in
``from droptrail.model.mechanics.solve import Restrained``.
"""

from .public import public_names

# The public names stand once, in the stub beside this file: what loads, what a type checker sees, what `*` gives.
__getattr__, __dir__ = public_names(__name__, __file__)
