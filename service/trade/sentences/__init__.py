"""What results say, sentence by sentence: no arithmetic but what the words need."""
