"""Pages: forms and answers over the workbench, served from this computer; no rule of their own."""
