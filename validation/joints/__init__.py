"""What thin tubes give where they meet: a study in shells that anybody can repeat (`make joint-study`).

From the element upwards: `triangle` (one flat shell triangle), `shell` (a body of them, solved),
`meshing` (tubes meeting, meshed by gmsh), `single` (the compliance of one joint beyond its beams),
`crown` (blades and steerer on a crown tube), `front_triangle`, `whole_fork`, `whole_frame` (several tubes at once),
`obstacles` (what the element is proven on), `study` and `crown_study` (the sweeps that write model/joints/*.csv).

Words: the CHORD is the tube that runs on, the BRANCH the tube that ends at its wall. Units: N, mm, rad.
"""
