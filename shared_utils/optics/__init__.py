"""Light alone: vergence, matrices, model eyes, rays and waves.

Lives here: what follows from light, glass and the eye's shape, as functions of plain numbers
and arrays. May not live here: drawing, files, formulas that predict a lens for a patient.
"""
