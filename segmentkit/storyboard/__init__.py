"""Text in, validated storyboard out; every fault has its line and column.

`load` is the door. Text becomes a located tree in `compose` (broken YAML is explained in `syntax`), the tree becomes a
model in `reading` (what does not fit is explained in `explain`), and names that lead nowhere are found in `references`
and `marks`. The models are `model`, `people`, `shots` and `words`, made of the value types in `fields`, which `scalars`
reads. `splice` writes values back; `template` fills storyboards that have blanks. `schema` and `reference` describe the
format for editors and people.
"""
