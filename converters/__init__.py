"""Files in and out: fit sheet, DXF, analysis-model JSON, tables. Heavy libraries load where they are used.

What a script or a notebook needs comes straight from here, loaded when it is first asked for::

    from droptrail.converters import analyse, read_input

    reading = read_input("tourer.dxf", sheet="tourer.csv")
    reading.dimensions.trail  # mm
    analyse(reading).results["seated"].stiffness["saddle_vertical"]  # N/mm
"""

from ..model.public import public_names

# The public names stand once, in the stub beside this file: what loads, what a type checker sees, what `*` gives.
__getattr__, __dir__ = public_names(__name__, __file__)
