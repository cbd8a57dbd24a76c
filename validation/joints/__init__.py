"""What thin tubes give where they meet: a study in shells that anybody can repeat (`make joint-study`).

From the element upwards: `triangle` (one flat shell triangle), `shell` (a body of them, solved),
`meshing` (tubes meeting, meshed by gmsh), `single` (the compliance of one joint beyond its beams),
`front_triangle` (four tubes and a shell at once), `obstacles` (what the element is proven on) and
`study` (the sweep that writes model/joints/study.csv).

Words: the CHORD is the tube that runs on, the BRANCH the tube that ends at its wall. Units: N, mm, rad.
"""
