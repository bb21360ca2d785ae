"""Paper: report models in, PDF bytes out.  fpdf2 is imported when the first page is drawn, not before."""
