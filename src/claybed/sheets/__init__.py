"""What is printed.

PDFs: `bench_sheet` from `sheet_data`, with `getting_ready`, `things`, `pour_pages`, `between_pours`,
`hump_pages`, `bench_lists`, `check_lines`, `ware_page`, `map_lines` and `workings`; `case_sheet`,
`wall_chart`, `mat_sheet`; set by `typesetting`. Their sentences: `bench_words`, `pour_words`,
`side_words`, `fill_words`, `holding_words`, `lying_words`, `gate_plug`, `plug_laps`, `cautions`, in steps
of `steps`.

Templates at true scale: `bench_templates`, `bed_chart`, `seam_strips`, `filler_template`,
`gate_template`, written by `template_sheet`, `drawing_files` and `tiling`.

Pictures: `pictures`, `lying_pictures`, `bed_picture`, `hump_picture`, `case_pictures`, `section`,
`form_cuts`, `form_drawings`, `wall_map`, drawn by `rendering` and `linework` from a `viewpoint`;
`places`, `fill_marks` and `label_places` say where words stand.
"""
