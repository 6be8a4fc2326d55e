"""How the pages of docs/ are made into a site. Run by `python docs/build.py`; nothing in it is taken from outside."""

project = "Steelyard"
author = "The Steelyard contributors"
root_doc = "README"
extensions = ["myst_parser"]
myst_heading_anchors = 4
html_theme = "basic"
html_title = "Steelyard"
html_favicon = "look/mark.svg"
html_static_path = ["look"]
html_css_files = ["look.css"]
templates_path = ["templates"]
html_sidebars = {"**": ["contents.html", "searchbox.html"]}
html_permalinks_icon = "#"
html_show_sphinx = False
html_show_copyright = False
html_copy_source = False
html_use_index = False
html_domain_indices = False
pygments_style = "bw"
