"""The order of the stages, and nothing else.

Begin with `course`: it calls the stages one after the other, and what was worked out before comes from
`store`. A mold is made by `searching`, which cuts one way after the other with `molding`, by way
of `ways`, `passed_over`, `cutting`, `flat_seam`, `keeping_out`, `side_seams`, `made_fill`, `humps`,
`key_room` and `blocks`; `standing`, `sideways` and `pour_views` set it up for its pours.

Documents hold every number with its working: `ledger` is how, `document` the plan's, and `describing`,
`posing`, `benchwork`, `flowing`, `holding`, `hump_figures`, `record_writing`, `ware_document` and
`object_document` its parts. What a person should know beside them: `noticing`, `seam_noticing`,
`float_noticing`, `gate_noticing`, `fewest`.

Beside the plan: `cases` with its `case_` modules, `cast_map` with `cast_figures` and `cast_map_document`,
`slab_patterns`.
"""
