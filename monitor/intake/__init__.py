"""intake"""
