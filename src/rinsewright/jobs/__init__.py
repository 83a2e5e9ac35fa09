"""What a person does, one file each; shared by the command line and whatever face comes later."""
