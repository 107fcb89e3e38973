"""advice"""
