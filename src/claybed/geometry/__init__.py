"""Solids, depth along a pull, plan arrangements: numbers in millimetres, no files, no clock.

Where to look, by what is wanted:

Meshes: `mesh`, `origins`, `halfedges`, `flagged`, `lofting`, `forming`, `drafting`, `refining`, `proxy`,
`tidying`, `folds`, `fields`; sections by `slicing`, `level_sections`, `level_lines`, `levels`.

How far apart: `closest`, `nearness`, `distances`, `inset`, `spotting`, `covering`, `flat_cover`,
`encircling`, `enclosing`.

What locks, by rays and rasters: `depth` with `crossings` and `columns`, `sighting`, `directions`; of more
pieces `reach`, `cover`, `sharing`, `plugging`.

Exact, on the integer lattice: `lattice`; sheets along a pull by `sheets`, `sheet`, `slab`, from faces in
sight (`visible`, `overlap`, `plan_bins`) noded in plan (`arranging`, `chains`, `tiling`, `cell_heights`,
`bridging`), shared and mended where rounding parts them (`seaming`, `mending`, `pinches`, `thinning`,
`uncrowding`); `outside` the silhouette, `looking` along the pull, `planing` a seam, `seating` a vessel.

Releases, proved in integers: `clearance`, `crossing_depth`, `overlap_depth`, `slanting`; by a second
way `stacking`.

Booleans, and back to the lattice: `carving`, `nearby`, `shadows`, `joining`, `labelling`, `edge_parting`.

Seams and keys: `barred`, `cutting_apart`, `registration`.

Plaster and clay: `tongues`, `plates`, `holding`, `voxels`, `growing_wall`, `cast_solid`, `pooling`; laid
flat by `flattening`; from photos `outline_hull`.

Files of solids: `stl`, `threemf`, `rereading`.
"""
