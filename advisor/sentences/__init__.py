"""Every sentence that is printed, made once from typed facts; nothing here decides or reads a sentence."""
