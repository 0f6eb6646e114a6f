"""What stands beside every answer: curewatch advises and replaces nothing that protects people."""

SAFETY = (
    "curewatch advises: it is no gas detector, fire alarm, proof of ventilation or permission to "
    "enter a booth. The label, the safety data sheet, the data sheet and the local code come "
    "first. A date on which a film is hard says nothing about what is in the air around it."
)
