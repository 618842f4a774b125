"""The ways an alert leaves the machine: desktop, sound, voice, terminal, phone. Each says what truly happened."""
