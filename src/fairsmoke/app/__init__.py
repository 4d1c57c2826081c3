"""The web app: one module per step of the job, served from the notebook on the local network."""
