"""Questions that take many welds, each in a room of its own; a room knows only those below it.

suggestion
    Which setting and pulse train to try first, and a plan of trials.
scattering
    How the result spreads when inputs vary from weld to weld.
calibration
    Which machine does what trial welds did.
charting
    The window of durations against any field of a setup.
durations
    At which durations of one setup something starts to hold.
sweep
    One weld for every combination of values of some fields.
trial_words
    What can be seen of a trial weld.
tasks
    Run many independent tasks on any executor, and keep what is finished.
"""
