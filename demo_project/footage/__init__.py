"""Makes the demonstration clips: a jointed figure, a swing and a camera, all invented.

The film shows no real person. The kinematics are a model with published event times, the bodies are smooth implicit
shapes, and every clip comes with a truth file that says where each joint is in each frame. Start with `clips.py`, which
lists what is shot; `shoot.py` shoots it.
"""
