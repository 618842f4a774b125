"""The ways an alert leaves the machine: desktop, sound, voice, terminal, phone; each says what truly happened."""
